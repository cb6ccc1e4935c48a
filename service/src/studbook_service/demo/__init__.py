"""A scenario of our own: one team, three cars, six weeks of work. Every name and number in it is invented."""
