"""Where telemetry comes in: buses, brokers and recordings. They pass on what they hear, nothing else."""
