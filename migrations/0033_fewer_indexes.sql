-- Written frames: an index of those with a GPS time by body and clock reading, which no question reads, took 3.5 bytes a frame.

DROP INDEX written_frame_stamped;
