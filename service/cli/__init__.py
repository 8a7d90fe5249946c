"""The command line: thin; loads the kernel only where a command needs it."""
