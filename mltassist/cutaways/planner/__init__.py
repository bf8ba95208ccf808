"""The pure cover planner: plain data in, shots out."""
