"""From marks and an outline on a photograph to area and perimeter with their uncertainty."""
