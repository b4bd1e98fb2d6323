"""Values to bytes for people and other programs: pages, tables; pure, nothing is opened here."""
