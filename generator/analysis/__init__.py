"""Pure functions that turn measurements into statements: no files, clock, random state, printing or globals."""
