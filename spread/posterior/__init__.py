"""Who is infested: records to likelihoods, a compiled sampler, joint draws."""
