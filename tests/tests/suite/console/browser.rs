//! What somebody sees in a browser, from signing in to signing out.

use anyhow::{Result, ensure};
use chrono::TimeDelta;
use lapwatch_tests::harness::{App, Browser, PASSWORD, Shop, Trial};
use thirtyfour::prelude::*;

/// Every address that the present page has loaded anything from, itself included.
async fn loaded(driver: &WebDriver) -> Result<Vec<String>> {
    let script =
        "return [location.href].concat(performance.getEntriesByType('resource').map(entry => entry.name))";
    Ok(driver.execute(script, Vec::new()).await?.convert()?)
}

async fn assert_nothing_left_the_service(app: &App, driver: &WebDriver) -> Result<()> {
    let addresses = loaded(driver).await?;
    for address in &addresses {
        assert!(address.starts_with(app.base()), "{address} is not on {}", app.base());
    }
    ensure!(addresses.len() > 1, "not even a stylesheet was loaded: {addresses:?}");
    Ok(())
}

/// Text of the one element that matches.
async fn text(driver: &WebDriver, css: &str) -> Result<String> {
    Ok(driver.query(By::Css(css)).first().await?.text().await?)
}

/// A fleet of three units, one of which has a history and one a failed trial.
async fn furnish(app: &App) -> Result<Shop> {
    let director = app.director();
    let shop = Shop::open(&director).await;
    let failing = shop.another_unit(&director).await;
    shop.another_unit(&director).await;
    for day in (0..5).rev() {
        let at = app.now() - TimeDelta::days(day);
        director.post("/v1/trials", &Trial::good_sweep(&shop, at).json()).await.expect(201);
        director
            .post("/v1/trials", &Trial::confirmation(&shop, at + TimeDelta::minutes(1), ["sss"; 3]).json())
            .await
            .expect(201);
    }
    director
        .post("/v1/trials", &Trial::confirmation(&failing, app.now(), ["ccc"; 3]).json())
        .await
        .expect(201);
    Ok(shop)
}

#[tokio::test]
async fn sign_in_see_the_fleet_and_a_unit_and_sign_out() -> Result<()> {
    let app = App::start().await;
    let shop = furnish(&app).await?;
    let browser = Browser::start().await?;
    let driver = &browser.driver;
    let address = |path: &str| format!("{}{path}", app.base());

    // A page of the inside leads to the sign-in form, which leads back.
    driver.goto(address(&format!("/units/{}", shop.unit))).await?;
    assert_eq!(text(driver, "h1").await?, "Sign in");
    assert_nothing_left_the_service(&app, driver).await?;
    driver.find(By::Id("sign_in")).await?.send_keys(&app.organization.director.sign_in).await?;
    driver.find(By::Id("password")).await?.send_keys("not the password").await?;
    driver.find(By::Css("form.stack button")).await?.click().await?;
    assert!(text(driver, "[role=alert]").await?.contains("do not belong together"));
    driver.find(By::Id("password")).await?.send_keys(PASSWORD).await?;
    driver.find(By::Css("form.stack button")).await?.click().await?;

    // The unit with its chart: two edges, sweeps and checks.
    driver.query(By::Css("header .sign-out")).first().await?;
    assert_eq!(text(driver, "h1").await?, "SM-07");
    assert!(driver.current_url().await?.path().ends_with(&shop.unit.to_string()));
    let chart = driver.query(By::Css("main svg[role=img], main .scrolled svg")).first().await?;
    let (width, height) = {
        let shown = chart.rect().await?;
        (shown.width, shown.height)
    };
    assert!(width > 200.0 && height > 100.0, "the chart is {width} by {height}");
    assert!(driver.find_all(By::Css("table tbody tr")).await?.len() >= 10, "the same as a table");
    assert_nothing_left_the_service(&app, driver).await?;

    // The fleet with all its units, the failed one with its flag.
    driver.find(By::Css("header nav a")).await?.click().await?;
    driver.query(By::Css("ul.units")).first().await?;
    let units = driver.find_all(By::Css("li.unit")).await?;
    assert_eq!(units.len(), 3);
    let page = text(driver, "main").await?;
    for words in ["SM-07", "Heron crew", "no sound set point"] {
        assert!(page.contains(words), "\"{words}\" is not in: {page}");
    }
    assert!(!page.contains("may weld"), "nobody is told that they may weld");
    assert_nothing_left_the_service(&app, driver).await?;

    // Out, and out it is.
    driver.find(By::Css("header .sign-out button")).await?.click().await?;
    driver.query(By::Id("password")).first().await?;
    driver.goto(address("/fleet")).await?;
    assert_eq!(text(driver, "h1").await?, "Sign in");
    driver.clone().quit().await?;
    Ok(())
}
