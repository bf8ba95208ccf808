"""House style: its figures as dataclasses, and how its file is read."""
