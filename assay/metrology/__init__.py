"""What a measured number is: influence, joint, estimate, budget, Monte Carlo, replicates, saved form."""
