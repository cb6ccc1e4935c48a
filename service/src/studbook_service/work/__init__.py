"""The work card: from what differs between two documents to jobs in order, who does which at once, and what fits."""
