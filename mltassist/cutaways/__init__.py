"""Cutaways over every jump cut and all narration."""
