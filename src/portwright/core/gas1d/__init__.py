"""Gas dynamics in tubes, vessels and cylinders."""
