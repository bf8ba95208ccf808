"""Recipes for what is delivered where, each with its published source."""
