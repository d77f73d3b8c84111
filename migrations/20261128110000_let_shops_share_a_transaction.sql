-- Why: batches of several shops that wait at the same moment are committed by one transaction, which names all of them in
-- leadhand.shop, separated by commas. A transaction sees and touches rows of the shops that it names and of no other; one that
-- names one shop, as an older replica's do, sees what it saw before. An id is 36 characters of hexadecimal digits and hyphens, so it is
-- found in the list whole or not at all; a setting that was local once reads '', in which there is none.

DO $$
DECLARE
    guarded regclass;
BEGIN
    FOR guarded IN SELECT polrelid FROM pg_policy WHERE polname = 'shop_sees_own' LOOP
        EXECUTE format(
            'ALTER POLICY shop_sees_own ON %s '
            'USING (strpos(current_setting(''leadhand.shop'', true), shop::text) > 0) '
            'WITH CHECK (strpos(current_setting(''leadhand.shop'', true), shop::text) > 0)', guarded);
    END LOOP;
END
$$;
