"""Pure judges of joins: measures in, verdicts and moves out."""
