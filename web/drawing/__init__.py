"""Lines on paper: geometry in fractions of the drawing's width and height, 0..1 from top left."""
