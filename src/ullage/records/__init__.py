"""How is it all kept? Tables, their migrations, the store over them, and backups."""
