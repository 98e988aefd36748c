"""Dossier: what is handed over. Claims go in; pages, pictures and files come out."""
