"""From measured beads to decisions: targets, advice, classes, labels, plans, reports."""
