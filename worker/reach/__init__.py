"""Tool assemblies against obstacles: height maps find, exact solids decide."""
