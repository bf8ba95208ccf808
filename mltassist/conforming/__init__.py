"""Does a finished film keep the rules of its recipe? Answered rule by rule; nothing is planned or written."""
