"""Results of earlier checks, kept by the content of all that they depend on."""
