"""What goes in and comes out: the plan, the report and their parts; knows nobody."""
