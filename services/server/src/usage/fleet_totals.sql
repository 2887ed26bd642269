SELECT coalesce(sum(f.flights), 0)::double precision AS flights,
       coalesce(sum(f.duration_minutes), 0)::double precision AS minutes,
       coalesce(sum(f.flights) FILTER (WHERE speed.rpm IS NOT NULL), 0)::double precision AS flights_with_turns,
       coalesce(sum(f.duration_minutes * speed.rpm) / 1000, 0)::double precision AS rotor_krev
FROM flights f
JOIN airframes a ON a.id = f.airframe_id
CROSS JOIN LATERAL (SELECT coalesce(f.head_speed_rpm, a.usual_head_speed_rpm) AS rpm) speed
