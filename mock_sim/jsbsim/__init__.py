"""Two integrations of the JSBSim library: in this process, and in a process of its own."""
