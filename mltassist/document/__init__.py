"""The project file itself: XML read safely, changed in place, written back whole."""
