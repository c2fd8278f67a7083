"""Stock aeroplanes of the JSBSim library, flown by our schedule, sent by the library's own UDP output."""
