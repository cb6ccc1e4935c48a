"""The HTTP door: thin handlers, one way in for bodies, one way out for errors. No SQL, no arithmetic."""
