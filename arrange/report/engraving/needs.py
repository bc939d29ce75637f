"""What printing needs beside the program itself."""

INSTALL = (
    "printing needs libraries that are not installed; "
    "add them: pip install verovio reportlab 'fonttools[woff]'"
)
