-- What a login may become counts as what it is.
SELECT current_user::text AS login,
       EXISTS (SELECT FROM pg_roles
               WHERE rolsuper AND pg_has_role(current_user, oid, 'MEMBER')) AS superuser,
       EXISTS (SELECT FROM pg_roles
               WHERE rolbypassrls AND pg_has_role(current_user, oid, 'MEMBER')) AS bypasses,
       EXISTS (SELECT FROM pg_class
               WHERE relnamespace = 'public'::regnamespace
                 AND pg_has_role(current_user, relowner, 'MEMBER')) AS owner
