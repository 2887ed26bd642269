SELECT (SELECT count(*) FROM airframes a
        WHERE EXISTS (SELECT 1 FROM flights f WHERE f.airframe_id = a.id)) AS airframes,
       (SELECT coalesce(sum(flights), 0)::bigint FROM flights) AS flights,
       (SELECT count(DISTINCT owner_id) FROM lives) AS owners
