"""Frozen records in SI, the vocabulary that every layer shares. Import from the modules, not from here."""
