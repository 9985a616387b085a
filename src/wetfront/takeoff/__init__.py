"""Shapes and dimension sheets become volumes, areas and the lattice of placing cells."""
