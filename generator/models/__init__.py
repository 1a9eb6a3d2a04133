"""Pure functions of records and arrays that predict: no files, clock, random state, printing or globals."""
