"""The scenario's season: a test day and ten nights, the parts, and what the shop did with them."""
