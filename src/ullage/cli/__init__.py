"""The command line: one module a command, and the entry that finds it.

The entry knows what each command takes, but loads a command only when somebody asks for it.
"""
