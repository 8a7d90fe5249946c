"""The rules: what a plan must satisfy, one rule a file, by family of finding codes."""
