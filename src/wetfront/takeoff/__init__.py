"""Shapes and dimension sheets become volumes, areas and the lattice of placing cells.

What other rooms call, by module (nothing is imported here: a volume must not wait for the geometry library to load):

- `volumes`, `order`: one shape's volume from plain numbers; what to order
- `shapes.take_off`, `shapes.quantities_of`: volume, formed area, upper surface of elements
- `problems.geometry_problems`: what does not fit, all at once
- `lattice.lattice_of`: elements cut into placing cells
- `drawing.front_view_svg`: the cells drawn
"""
