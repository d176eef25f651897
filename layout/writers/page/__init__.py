"""The crew's page: drawings, tables and ticks in one file that needs nothing else."""
