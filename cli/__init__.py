"""The command line: arguments in, tables, files and exit status out."""
