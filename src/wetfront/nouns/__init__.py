"""The shared frozen nouns: what the rooms hand to each other."""
