"""Search over the decisions of a pour, its risks, what binds, what a change would buy."""
