"""The steps that bring a database from empty to the present tables, run by Alembic."""
