"""What every room speaks: errors, quantities with their uncertainty, named results, files."""
