"""Views, prose and templates: results in, page text out. Never touches the disk of a site."""
