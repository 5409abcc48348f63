"""Triangle meshes of ports: checks, sections, centreline, profile, before against after."""
