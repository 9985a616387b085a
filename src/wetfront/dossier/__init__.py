"""What is printed: one screen, plan.json, plan.ics, plan.pdf."""
