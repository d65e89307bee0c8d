"""The best layouts of one sheet or offcut, by algorithm."""
