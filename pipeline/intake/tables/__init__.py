"""Tables of recipes: CSV, Parquet and spreadsheets."""
