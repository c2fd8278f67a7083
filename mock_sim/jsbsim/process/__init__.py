"""Stock aeroplanes of the JSBSim library, flown by a schedule of ours, sent by the library's own UDP output."""
