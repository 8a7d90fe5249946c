"""The worker process: takes a job from the queue, has its geometry done in a killable child, stores the results."""
