"""What was understood to a job record: the ledgers."""
