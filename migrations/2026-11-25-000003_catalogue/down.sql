DROP TABLE positions;
DROP TABLE aircraft_designs;
DROP TABLE failure_modes;
DROP TABLE part_types;
