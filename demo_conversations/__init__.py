"""Scripts that are demo, documentation and test in one, and the demo hall that they play in."""
