-- A probe is known by more than its radii: the length of the winding moves what a thin layer reads, and the distance from an
-- edge that its maker asks for decides on which pieces it may be used at all. NULL is a fact that nobody stated.

ALTER TABLE probe ADD COLUMN coil_length_nm INTEGER
    CHECK (coil_length_nm IS NULL OR (coil_length_nm > 0 AND coil_inner_nm IS NOT NULL));
ALTER TABLE probe ADD COLUMN edge_distance_nm INTEGER CHECK (edge_distance_nm IS NULL OR edge_distance_nm >= 0);
