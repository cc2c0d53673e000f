"""The command line: texts in, exit code out.

`main` knows the commands and how a run ends, `options` what every reading command takes; each command is one file
with one function. Nothing is computed here.
"""
