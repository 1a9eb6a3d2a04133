"""A comparison's record in, its results object out: where readers, models and analysis meet."""
