"""Plans of earlier runs, taken again where all that they are made of is the same."""
