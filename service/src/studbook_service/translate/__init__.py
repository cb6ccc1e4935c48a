"""The only bridge between setup documents and the engine's arrays, both ways."""
