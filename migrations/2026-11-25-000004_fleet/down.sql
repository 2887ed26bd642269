DROP TABLE removals;
DROP TABLE installations;
DROP TABLE components;
DROP TABLE airframes;
