SELECT rolname::text AS login,
       rolsuper      AS superuser,
       rolbypassrls  AS bypasses,
       EXISTS (SELECT FROM pg_class WHERE relowner = pg_roles.oid AND relnamespace = 'public'::regnamespace) AS owner
FROM pg_roles
WHERE rolname = current_user
