"""What holds fluid in a machine and how it is joined; nothing here knows of time."""
