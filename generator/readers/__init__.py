"""One file per format: turns files into records and collects problems. Import from the modules, not from here."""
