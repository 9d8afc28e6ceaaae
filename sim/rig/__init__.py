"""The rigs: a whole simulated boat around the supervisor, on simulated buses or real ones; what hands do there."""
