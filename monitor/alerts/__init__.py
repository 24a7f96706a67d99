"""What wants somebody: the rules, what they find in the facts, and the book of open alerts."""
