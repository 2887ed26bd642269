DROP TABLE fits;
DROP FUNCTION refuse_change_of_fit();
DROP TABLE life_exclusions;
DROP TABLE lives;
