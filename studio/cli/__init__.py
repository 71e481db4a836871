"""The command line: parse, call, print, exit; one module a command."""
