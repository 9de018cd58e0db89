"""One file a test rig: the physics of the set-up, giving physical time histories."""
